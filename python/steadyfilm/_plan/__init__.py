"""Parts of plans: what all keys have in common, and tables with a module of their own."""
