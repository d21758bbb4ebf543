"""How the parts become a running service: wiring, commands, demo, replay."""
