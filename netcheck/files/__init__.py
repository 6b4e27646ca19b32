"""What users write: vehicle, retrofit, job and marks files."""
