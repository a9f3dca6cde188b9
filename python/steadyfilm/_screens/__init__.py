"""The parts of ``steadyfilm.screens``: the readings sheet, plain faults, and patterns too good to be true."""
