"""The tables of the write-up; may import anything of keeping."""
