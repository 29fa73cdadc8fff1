"""Use cases: one public function for each thing a person asks for."""
