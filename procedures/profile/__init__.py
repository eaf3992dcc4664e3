"""The TOML profile: schema, loader, proof and path table."""
