"""Code tables of HL7 v2 as far as orders need them, each with its number."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum, auto


class Action(Enum):
    """What an order control code does to an order."""

    NEW = auto()
    CHANGE = auto()
    REPLACE = auto()
    CANCEL = auto()
    HOLD = auto()
    RELEASE = auto()
    STATE = auto()
    PRIOR = auto()
    PARENT = auto()
    PHARMACY = auto()
    ANSWER = auto()
    UNKNOWN = auto()


ORDER_CONTROL: Mapping[str, Action] = {
    **dict.fromkeys(("NW", "RO", "CH", "SN"), Action.NEW),
    **dict.fromkeys(("XO", "XX"), Action.CHANGE),
    **dict.fromkeys(("RP", "RU", "RQ"), Action.REPLACE),
    **dict.fromkeys(("CA", "OC", "DC", "OD", "CR", "DR"), Action.CANCEL),
    **dict.fromkeys(("HD", "OH", "HR"), Action.HOLD),
    **dict.fromkeys(("RL", "OE", "OR"), Action.RELEASE),
    "SC": Action.STATE,
    "PR": Action.PRIOR,
    "PA": Action.PARENT,
    **dict.fromkeys(("OF", "OP", "PY", "RF"), Action.PHARMACY),
    **dict.fromkeys(
        ("AF", "DE", "DF", "FU", "LI", "MC", "NA", "NR", "OK", "RE", "RR", "SR", "SS", "UA", "UC", "UD", "UF", "UH",
         "UM", "UN", "UR", "UX", "XR", "CN", "CP"),
        Action.ANSWER,
    ),
}  # fmt: skip
"""HL7 table 0119, order control codes."""

AMBULATORY: Mapping[str, str] = {
    "A1": "walks with an assistive device", "A2": "wheelchair or stretcher bound",
    "A3": "comatose, does not respond", "A4": "disoriented", "A5": "vision impaired", "A6": "hearing impaired",
    "A7": "speech impaired", "A8": "does not speak English", "B1": "oxygen therapy",
    "B2": "special equipment (tubes, lines, catheters)", "B3": "amputee", "B4": "mastectomy", "B5": "paraplegic",
    "B6": "pregnant",
}  # fmt: skip
"""HL7 table 0009, ambulatory status (PV1-15), in our words. A0 (no limits) and A9 (not known) say nothing."""
AMBULATORY_SILENT = frozenset({"A0", "A9"})
AMBULATORY_TO_HEED = frozenset({"A3", "A4", "A6", "A7", "A8", "B2", "B3", "B4"})
"""Those that bear on asking for the name or on the choice of the arm (common practice, no source)."""
VISIT_CLASSES: Mapping[str, str] = {
    "O": "an outpatient", "P": "a preadmission: the patient may not be there yet",
    "R": "a recurring patient, who may not stay", "C": "a commercial account, no patient on a ward",
}  # fmt: skip
"""HL7 table 0004, patient class (PV1-2), where nobody may lie in the bed; I inpatient, E emergency, B obstetrics do."""

ORDER_MESSAGES = frozenset({"ORM", "OML", "OMG"})
"""Message types (table 0076) that carry laboratory orders among others."""
OTHER_ORDER_MESSAGES: Mapping[str, str] = {
    "OMI": "imaging", "OMP": "pharmacy", "RDE": "pharmacy", "RDO": "pharmacy", "RDS": "pharmacy", "OMD": "diet",
    "OMN": "supplies", "OMS": "supplies", "OMB": "blood products", "OMQ": "other orders",
}  # fmt: skip
"""Message types of orders that are never a draw."""
ANSWER_MESSAGES = frozenset(
    {
        "DFT", "MDM", "ORA", "ORB", "ORD", "ORF", "ORG", "ORI", "ORL",
        "ORN", "ORP", "ORR", "ORS", "ORU", "OSR", "OUL", "RRE", "RRD", "RRG", "RRA", "SIU", "VXU", "RAS",
        "RGV", "PPR", "QBP", "RSP", "EAC", "SSU", "TCU", "INU", "CSU", "OSQ", "OPU", "OPL", "OPR",
    }
)  # fmt: skip
"""Message types that may speak of orders and never ask for a draw; they are counted. Types that have no place for
orders (ADT, ACK, ...) are not among them: one that holds some is read, and said."""

HARMLESS_MESSAGES = frozenset(
    {
        "ACK", "ADR", "ADT", "BAR", "BPS", "BRP", "BRT", "BTS", "CCF", "CCI", "CCM", "CCQ", "CCR", "CCU", "CQU", "CRM",
        "DBC", "DBU", "DEL", "DEO", "DER", "DOC", "DPR", "DRC", "DRG", "DSR", "EAN", "EAR", "EHC", "ESR", "ESU", "INR",
        "LSR", "LSU", "MCF", "MFD", "MFK", "MFN", "MFQ", "MFR", "NMD", "NMQ", "NMR", "PEX", "PGL", "PIN", "PMU", "PPG",
        "PPP", "PPT", "PPV", "PRR", "PTR", "QCK", "QCN", "QRY", "QSB", "QSX", "QVR", "RAR", "RCI", "RCL", "RDR", "RDY",
        "REF", "RER", "RGR", "ROR", "RPA", "RPI", "RPL", "RPR", "RQA", "RQC", "RQI", "RQP", "RQQ", "RRI", "RTB", "SCN",
        "SDN", "SDR", "SLN", "SLR", "SMD", "SQM", "SQR", "SRM", "SRR", "STC", "STI", "SUR", "TBR", "TCR", "UDM", "VXQ",
        "VXR", "VXX",
    }
)  # fmt: skip
"""The other message types of HL7 table 0076 (v2.1 to v2.8, from memory): whole without any order."""

SEGMENTS = frozenset(
    {
        "ABS", "ACC", "ADD", "ADJ", "AFF", "AIG", "AIL", "AIP", "AIS", "AL1", "APR", "ARQ", "ARV", "AUT", "BHS", "BLC",
        "BLG", "BPO", "BPX", "BTS", "BTX", "BUI", "CDM", "CDO", "CER", "CM0", "CM1", "CM2", "CNS", "CON", "CSP", "CSR",
        "CSS", "CTD", "CTI", "CTR", "DB1", "DEV", "DG1", "DMI", "DON", "DPS", "DRG", "DSC", "DSP", "DST", "ECD", "ECR",
        "EDU", "EQL", "EQP", "EQU", "ERQ", "ERR", "EVN", "FAC", "FHS", "FT1", "FTS", "GOL", "GP1", "GP2", "GT1", "IAM",
        "IAR", "IIM", "ILT", "IN1", "IN2", "IN3", "INV", "IPC", "IPR", "ISD", "ITM", "IVC", "IVT", "LAN", "LCC", "LCH",
        "LDP", "LOC", "LRL", "MCP", "MFA", "MFE", "MFI", "MRG", "MSA", "MSH", "NCK", "NDS", "NK1", "NPU", "NSC", "NST",
        "NTE", "OBR", "OBX", "ODS", "ODT", "OH1", "OH2", "OH3", "OH4", "OM1", "OM2", "OM3", "OM4", "OM5", "OM6", "OM7",
        "OMC", "ORC", "ORG", "ORO", "OVR", "PAC", "PCE", "PCR", "PD1", "PDA", "PDC", "PEO", "PES", "PID", "PKG", "PM1",
        "PMT", "PR1", "PRA", "PRB", "PRC", "PRD", "PRT", "PSG", "PSH", "PSL", "PSS", "PTH", "PV1", "PV2", "PYE", "QAK",
        "QID", "QPD", "QRD", "QRF", "QRI", "RCP", "RDF", "RDT", "REL", "RF1", "RFI", "RGS", "RMI", "ROL", "RQ1", "RQD",
        "RXA", "RXC", "RXD", "RXE", "RXG", "RXO", "RXR", "RXV", "SAC", "SCD", "SCH", "SCP", "SDD", "SFT", "SGH", "SGT",
        "SHP", "SID", "SLT", "SPM", "SPR", "STF", "STZ", "TCC", "TCD", "TQ1", "TQ2", "TXA", "UAC", "UB1", "UB2", "URD",
        "URS", "VAR", "VND", "VTQ",
    }
)  # fmt: skip
"""The segments of HL7 v2.1 to v2.8 (appendix A, from memory); those that begin with Z are a site's own."""

ORDER_EVENTS = frozenset({"O01", "O19", "O21", "O33", "O35", "O39"})
"""Trigger events (table 0003) of the order messages alone: an answer or a result has one of its own."""

OTHER_ORDER_SEGMENTS: Mapping[str, str] = {
    "RXO": "pharmacy", "RXE": "pharmacy", "RXD": "pharmacy", "RXG": "pharmacy", "RXA": "pharmacy", "RXR": "pharmacy",
    "RQD": "supplies", "RQ1": "supplies", "ODS": "diet", "ODT": "diet", "BPO": "blood products", "IPC": "imaging",
}  # fmt: skip
"""Segments of an order's detail that show that it is none of the laboratory's."""

OTHER_SECTIONS: Mapping[str, str] = {
    "AU": "audiology", "CT": "imaging", "CTH": "cardiology", "CUS": "imaging", "EC": "cardiology",
    "EN": "neurology", "ICU": "bedside monitoring", "IMG": "imaging", "NMR": "imaging", "NMS": "imaging",
    "NRS": "nursing", "OT": "therapy", "OUS": "imaging", "PF": "lung function", "PHR": "pharmacy", "PHY": "medicine",
    "PT": "therapy", "RAD": "imaging", "RC": "respiratory care", "RT": "radiotherapy", "RUS": "imaging",
    "RX": "imaging", "VUS": "imaging", "XRC": "imaging",
}  # fmt: skip
"""HL7 table 0074, diagnostic service sections that are not a laboratory's (OBR-24)."""

LOINC_MODALITIES = frozenset({"CT", "MR", "XR", "US", "NM", "MG", "DXA", "MRA", "CTA", "SPECT", "EKG"})
"""First words of LOINC names of imaging: 'CT Head', 'MR Brain' (LOINC radiology names). PT and RF are left out: they
begin names of blood tests too."""

CANCELLED_STATES = frozenset({"CA", "DC", "RP"})
DONE_STATES = frozenset({"CM", "A"})
HOLD_STATES = frozenset({"HD"})
ERROR_STATES = frozenset({"ER"})
KNOWN_STATES = frozenset({"IP", "SC", ""}) | CANCELLED_STATES | DONE_STATES | HOLD_STATES | ERROR_STATES
"""HL7 table 0038, order status (ORC-5): A some results, CA cancelled, CM completed, DC discontinued, ER error,
HD on hold, IP in process, RP replaced, SC scheduled."""

FINAL_RESULTS = frozenset({"F", "C", "P", "R"})
"""HL7 tables 0085 and 0123: a result is there (final, corrected, preliminary, entered)."""

PRIORITIES: Mapping[str, str] = {
    "S": "stat", "STAT": "stat", "A": "asap", "ASAP": "asap", "P": "urgent", "PREOP": "urgent", "R": "routine",
    "ROUTINE": "routine", "C": "routine", "CALLBACK": "routine", "T": "timed", "TIMED": "timed", "U": "urgent",
}  # fmt: skip
"""HL7 table 0485, extended priority codes: S, A, R, P pre-operative, C call back, T timing critical."""

COLLECTION_BY_US = frozenset({"", "L"})
COLLECTION_ASSUMED: Mapping[str, str] = {
    "S": "the order is to be scheduled (OBR-11 = S)",
    "P": "the specimen is pending (OBR-11 = P), which leaves open who draws it",
    "R": "the order is revised (OBR-11 = R)",
    "N": "OBR-11 = N",
}
COLLECTION_BY_OTHERS = frozenset({"O"})
COLLECTION_ADD_ON: Mapping[str, str] = {
    "A": "to be added to a specimen that is there (OBR-11 = A)",
    "G": "made by the laboratory itself after another result (OBR-11 = G)",
}
COLLECTION_CANCELLED = frozenset({"C"})
"""HL7 table 0065, specimen action code (OBR-11)."""

BLOOD = frozenset({"BLD", "BLDV", "WB", "SER", "PLAS", "PLB", "PPP", "PRP", "BLDC", "BLDE", "BLDER", "RBC", "WBC"})
ARTERIAL = frozenset({"BLDA"})
"""HL7 tables 0487 and 0070, specimen types; every other code of those tables is no blood from a vein."""
BLOOD_SNOMED = frozenset(
    {"119297000", "122555007", "119364003", "67922002", "119361006", "50863008", "258580003", "87612001", "122554006",
     "119354006", "119359002", "445295009", "122592007"}
)  # fmt: skip
ARTERIAL_SNOMED = frozenset({"122552005"})
"""SNOMED CT specimens of blood: venous, capillary, serum, plasma, whole, and in EDTA."""
FOREIGN_ROLES: Mapping[str, str] = {
    "B": "blind sample", "C": "calibrator", "E": "electronic control", "F": "proficiency specimen",
    "O": "operator proficiency", "Q": "control specimen", "R": "replicate", "V": "verifying calibrator",
}  # fmt: skip
"""HL7 table 0369, specimen roles that are no patient's (SPM-11)."""

FASTING: Mapping[str, bool | None] = {"F": True, "NF": False, "FNA": None, "NG": None}
"""HL7 table 0916: fasting, not fasting, not asked, not given."""
YES_NO: Mapping[str, bool] = {
    "Y": True, "YES": True, "N": False, "NO": False, "F": True, "NF": False, "LA33-6": True, "LA32-8": False,
    "TRUE": True, "FALSE": False,
}  # fmt: skip
"""HL7 table 0136 and LOINC answer codes of 49541-6."""
FASTING_LOINC = "49541-6"
"""LOINC 49541-6, fasting status - reported."""
WEIGHT_LOINCS = frozenset({"29463-7", "3141-9", "3142-7"})
"""LOINC body weight: by any method, measured, stated. Weight at birth (8339-4) is no weight of today."""
