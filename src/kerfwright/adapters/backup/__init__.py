"""A shop's jobs, tables and cuts in one file, and back; any computer opens it (ZIP, with ZIP64)."""
