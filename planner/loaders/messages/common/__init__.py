"""What HL7 v2 and FHIR requests have in common: the request, its moments, repeats, precautions."""
