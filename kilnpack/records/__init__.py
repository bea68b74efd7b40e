"""What was really fired: the database of a works.

`store.open_records` opens it, `works_values` takes a works in and gives it back, `firings` keeps plans, firings, loads
and what the loader ticks, `inspection` the ware that came out, `measured` the readings of meter, cones and
thermometer, `learning` what follows from all of it, `people` who may sign in. SQLAlchemy is imported by the modules
that need it, never here.
"""
