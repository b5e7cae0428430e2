"""What people write: typed, frozen models of every YAML file, loaded with line numbers."""
