"""From the backlog to firings in sequence."""
