"""From a part and its requirement to a plan: feasibility, passes, starts, holding, order."""
