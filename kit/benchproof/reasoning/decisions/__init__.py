"""What a value says about a limit or another value; may import values and measuring."""
