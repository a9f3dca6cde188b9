"""Parts of the cure side: recipes, schedules, faults of logs, bakes and what is said of them."""
