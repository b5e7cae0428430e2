"""Month-scale estimates and findings: they read what is archived and never change it."""
