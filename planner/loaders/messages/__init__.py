"""What HL7 v2 and FHIR have in common: requests, their times, and how they become rows of the order table."""
