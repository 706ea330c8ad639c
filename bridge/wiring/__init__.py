"""Wiring: settings composed, stages opened in order and closed in reverse, processes started and watched."""
