"""Records and names of the trade: material, wire, machine, part, requirement, roughness."""
