"""What cells declared and what it amounts to; may import logs and lower floors."""
