"""Other office systems are told of quoted and ordered jobs, by files or signed calls."""
