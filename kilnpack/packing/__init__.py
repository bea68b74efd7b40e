"""From pieces to settings to loads."""
