"""One frozen model per kind of file that a person writes; unknown keys are refused."""
