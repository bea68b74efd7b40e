"""The shell round the solvers: budgets, seeds, progress, and the one executor."""
