"""The packing engine, in a process of its own."""
