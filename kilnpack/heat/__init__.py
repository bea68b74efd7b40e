"""Programme, kiln and load to energy, heat work and cooling.

`firing.fire` gives the heat balance of a firing, `load_energy.load_energy` that of a packed load with its bill and its
shares, `report.energy_report` that of a row of firings, `cooling.cooling_hours` how long a kiln cools, `cones.cone_at`
which cone goes down at a place, `readings.calibrate` the factors of a works' own meter. docs/method/heat.md states the
model, its checks and its accuracy.
"""
