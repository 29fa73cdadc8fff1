"""Cutting physics and technology: rates, passes, consumption."""
