"""Inside a review: readings to unit averages, averages to changes, changes to words. Pure functions on plain arrays."""
