"""The page: a local web server over the same use cases as the command line."""
