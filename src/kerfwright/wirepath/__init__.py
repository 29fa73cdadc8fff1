"""From a plan to canonical moves."""
