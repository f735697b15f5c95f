"""Small decision problems that can be solved exactly, and how near every policy comes."""
