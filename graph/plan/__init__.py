"""The proven cheapest set of parts for a target: what may be chosen, what it costs, what the physics allows."""
