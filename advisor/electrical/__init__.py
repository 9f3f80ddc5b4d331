"""Physics of wires, meters, loaded circuits and position sensors: pure functions in SI units, standard library only."""
