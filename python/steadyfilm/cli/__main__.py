"""``python -m steadyfilm.cli``."""

from steadyfilm.cli import main

main(prog_name="steadyfilm")
