"""Tests of the archive, with the invented files and the compliance runner that they share."""
