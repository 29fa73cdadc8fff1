"""The figures of the process pages: the numbers behind them, and their drawing."""
