"""One client's record as FHIR R4 (4.0.1) resources, for other systems to read."""
