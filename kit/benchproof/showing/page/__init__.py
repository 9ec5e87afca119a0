"""The pages a reader opens; may import figures and every lower floor."""
