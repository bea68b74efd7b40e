"""Programme, kiln and load to energy, heat work and cooling."""
