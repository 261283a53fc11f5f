"""Ready-made scenarios, one TOML file each, found by name in `gomphosis.scenarios.files`."""
