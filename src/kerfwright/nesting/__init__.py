"""Parts placed in sheets, plates and remnants: made by one side, checked by another."""
