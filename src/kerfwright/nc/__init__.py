"""ISO 6983 text: a writer and a reader that share no code."""
