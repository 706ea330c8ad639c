"""Words every stage shares: events, commands, units, clock, hand-off, YAML, safe writing, errors."""
