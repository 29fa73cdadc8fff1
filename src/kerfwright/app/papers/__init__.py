"""What each paper says, and to whom: customer, operator, inspector, driller."""
