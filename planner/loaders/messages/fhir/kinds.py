"""Which types of resources there are: orders, what tells about them, and what no round needs."""

from __future__ import annotations

from planner.loaders.messages.fhir.json_text import Json
from planner.loaders.messages.fhir.values import text_of

OLD_ORDERS = {
    "ProcedureRequest": "FHIR STU3",
    "DiagnosticRequest": "a FHIR draft",
    "DiagnosticOrder": "FHIR DSTU2",
    "Order": "FHIR DSTU2",
}
"""Resource types of orders before R4; they are refused by name."""
OTHER_ORDERS = {
    "MedicationRequest": "pharmacy",
    "MedicationDispense": "pharmacy",
    "NutritionOrder": "diet",
    "DeviceRequest": "devices",
    "SupplyRequest": "supplies",
    "VisionPrescription": "vision",
    "ImmunizationRecommendation": "immunisation",
}
ORDERS = frozenset({"ServiceRequest", *OLD_ORDERS, *OTHER_ORDERS})

USED = frozenset(
    {"Patient", "Encounter", "Location", "Specimen", "Observation", "AllergyIntolerance", "Flag", "Practitioner",
     "PractitionerRole", "Organization"}
)  # fmt: skip

STATES_INTENT = frozenset(
    {"ActivityDefinition", "CarePlan", "CommunicationRequest", "DeviceRequest", "MedicationRequest", "NutritionOrder",
     "RequestGroup", "RequestOrchestration", "ServiceRequest", "Task", "Transport"}
)  # fmt: skip
"""Types that have an element ``intent`` in FHIR R4, R4B or R5; another resource that has one is not what it says."""

_STANDARD = """
Account ActivityDefinition ActorDefinition AdministrableProductDefinition AdverseEvent AllergyIntolerance
Appointment AppointmentResponse ArtifactAssessment AuditEvent Basic Binary BiologicallyDerivedProduct
BiologicallyDerivedProductDispense BodyStructure Bundle CapabilityStatement CarePlan CareTeam CatalogEntry
ChargeItem ChargeItemDefinition Citation Claim ClaimResponse ClinicalImpression ClinicalUseDefinition CodeSystem
Communication CommunicationRequest CompartmentDefinition Composition ConceptMap Condition ConditionDefinition
Consent Contract Coverage CoverageEligibilityRequest CoverageEligibilityResponse DetectedIssue Device
DeviceAssociation DeviceDefinition DeviceDispense DeviceMetric DeviceRequest DeviceUsage DeviceUseStatement
DiagnosticReport DocumentManifest DocumentReference EffectEvidenceSynthesis Encounter EncounterHistory Endpoint
EnrollmentRequest EnrollmentResponse EpisodeOfCare EventDefinition Evidence EvidenceReport EvidenceVariable
ExampleScenario ExplanationOfBenefit FamilyMemberHistory Flag FormularyItem GenomicStudy Goal GraphDefinition
Group GuidanceResponse HealthcareService ImagingSelection ImagingStudy Immunization ImmunizationEvaluation
ImmunizationRecommendation ImplementationGuide Ingredient InsurancePlan InventoryItem InventoryReport Invoice
Library Linkage List Location ManufacturedItemDefinition Measure MeasureReport Media Medication
MedicationAdministration MedicationDispense MedicationKnowledge MedicationRequest MedicationStatement
MedicinalProduct MedicinalProductAuthorization MedicinalProductContraindication MedicinalProductDefinition
MedicinalProductIndication MedicinalProductIngredient MedicinalProductInteraction MedicinalProductManufactured
MedicinalProductPackaged MedicinalProductPharmaceutical MedicinalProductUndesirableEffect MessageDefinition
MessageHeader MolecularSequence NamingSystem NutritionIntake NutritionOrder NutritionProduct Observation
ObservationDefinition OperationDefinition OperationOutcome Organization OrganizationAffiliation
PackagedProductDefinition Parameters Patient PaymentNotice PaymentReconciliation Permission Person
PlanDefinition Practitioner PractitionerRole Procedure Provenance Questionnaire QuestionnaireResponse
RegulatedAuthorization RelatedPerson RequestGroup RequestOrchestration Requirements ResearchDefinition
ResearchElementDefinition ResearchStudy ResearchSubject RiskAssessment RiskEvidenceSynthesis Schedule
SearchParameter ServiceRequest Slot Specimen SpecimenDefinition StructureDefinition StructureMap Subscription
SubscriptionStatus SubscriptionTopic Substance SubstanceDefinition SubstanceNucleicAcid SubstancePolymer
SubstanceProtein SubstanceReferenceInformation SubstanceSourceMaterial SubstanceSpecification SupplyDelivery
SupplyRequest Task TerminologyCapabilities TestPlan TestReport TestScript Transport ValueSet VerificationResult
VisionPrescription
"""
KINDS = OLD_ORDERS.keys() | frozenset(_STANDARD.split())
"""The resource types of FHIR R4, R4B and R5, and those of orders before them."""


def is_known(resource: Json) -> bool:
    """Return whether a resource is of a type of the standard."""
    return text_of(resource, "resourceType") in KINDS


def may_be_order(resource: Json) -> bool:
    """Return whether a resource states an intent, as orders do, under a type that has none in the standard."""
    return "intent" in resource and text_of(resource, "resourceType") not in STATES_INTENT | ORDERS
