"""The one shell round the solvers: seeds, budgets, outcomes, executors."""
