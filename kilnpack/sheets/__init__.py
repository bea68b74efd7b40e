"""What people hold: loading sheets, the plan, charts and tables."""
