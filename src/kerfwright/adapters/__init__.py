"""Files in and out: drawings, pictures, job folders, tables."""
