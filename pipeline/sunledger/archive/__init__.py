"""Archival NetCDF: encoding, provenance, manifests, versions and the change record."""
