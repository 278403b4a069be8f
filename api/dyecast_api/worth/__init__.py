"""What pressing costs: blanks lost, their cost, and how often the first piece of a run is good."""
