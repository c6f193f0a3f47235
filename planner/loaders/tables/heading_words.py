"""The words that files use for our tables and columns: English first, common German and French words besides."""

from __future__ import annotations

from collections.abc import Mapping

# fmt: off
TABLES: Mapping[str, tuple[str, ...]] = {
    "orders": (
        "order", "order list", "lab orders", "requests", "request list", "tests ordered", "collection list",
        "Aufträge", "Anforderungen", "Auftragsliste", "demandes", "prescriptions",
    ),
    "patients": ("patient", "patient list", "census", "ward list", "Patientenliste", "liste des patients"),
    "places": ("place", "map", "ward map", "beds", "locations", "Orte", "Betten", "lieux", "lits"),
    "corridors": ("corridor", "ways", "links", "Wege", "Flure", "couloirs"),
    "staff": ("people", "phlebotomists", "shifts", "roster", "Personal", "Dienstplan", "personnel", "équipe"),
    "pickups": ("pickup", "couriers", "courier times", "transport", "Abholungen", "ramassages"),
    "tests": ("test", "lab tests", "test catalogue", "Tests im Labor", "analyses"),
    "tubes": ("tube", "tube types", "Röhrchen"),
    "policy": ("settings", "rules", "Regeln", "règles"),
}

_PATIENTS: Mapping[str, tuple[str, ...]] = {
    "patient_number": (
        "patient no", "patient id", "patient nr", "patient #", "pt no", "pt id", "pt number", "pt nr", "pt mrn",
        "patient mrn", "mrn no", "mrn number", "med rec", "med rec #", "med rec no", "med rec nr", "med rec num",
        "med rec number", "medical rec no", "medical rec number", "medical record", "medical record #", "patnr",
        "pat no", "pat id", "pat nr", "mrn", "medical record number",
        "medical record no", "record number", "hospital number", "hospital no", "hosp no", "unit number", "pid",
        "Patientennummer", "Patienten-Nr", "Patient Nr", "Pat.-Nr.", "Fallnummer", "numéro patient", "n° patient",
        "no patient", "IPP", "patient identifier",
    ),
    "family_name": (
        "surname", "last name", "lastname", "patient surname", "patient last name", "name last",
        "patient family name", "Nachname", "Familienname", "nom", "nom de famille", "family",
    ),
    "given_name": (
        "first name", "forename", "given", "christian name", "patient first name", "patient forename",
        "patient given name", "Vorname", "prénom", "first names", "given names",
    ),
    "patient_name": (
        "patient", "name", "full name", "Patientenname", "Name des Patienten", "nom du patient", "nom et prénom",
        "name of patient", "pt name", "patient full name", "patient's name",
    ),
    "birth_date": (
        "date of birth", "dob", "birthdate", "birthday", "born", "patient dob", "patient date of birth",
        "Geburtsdatum", "geb. am", "Geb.-Datum", "geboren", "date de naissance", "né le", "ddn",
    ),
    "sex": ("gender", "patient sex", "administrative sex", "Geschlecht", "sexe"),
    "ward": (
        "unit", "nursing unit", "department", "dept", "ward name", "patient ward", "Station", "service", "unité",
        "point of care", "floor", "nurse unit", "nurse station", "nursing station", "nursing ward", "patient unit",
        "patient nurse unit", "patient nursing unit", "inpatient unit", "care unit", "clinical unit", "location unit",
        "patient location unit", "patient location ward", "location nurse unit", "patient location nurse unit",
    ),
    "bed": (
        "bed number", "bed no", "bed id", "bed nr", "location", "patient location", "room", "room bed", "room/bed",
        "bed space", "patient bed", "Bett", "Bett-Nr", "Bettplatz", "Zimmer", "Zimmer/Bett", "lit", "chambre",
        "n° lit", "loc", "patient loc", "pt loc", "pt location", "current location", "patient current location",
        "location bed", "patient location bed", "patient location room", "patient location room bed", "bed location",
        "room no", "room number", "room and bed", "room - bed", "rm", "rm bed", "rm/bed", "room bed no", "patient room",
        "patient room bed",
    ),
    "weight_kg": (
        "weight", "weight in kg", "body weight", "wt", "wt kg", "Gewicht", "Gewicht kg", "poids", "poids kg",
        "patient weight",
    ),
    "weight_g": ("weight in g", "weight grams", "Gewicht g", "poids g"),
    "haemoglobin_g_l": ("haemoglobin", "hemoglobin", "hb g/l", "hb"),
    "precautions": (
        "precaution", "isolation", "isolation precautions", "infection control", "isolation status",
        "Isolation Vorsichtsmaßnahmen", "Isolierung", "précautions", "isolement",
    ),
    "alerts": (
        "alert", "warnings", "patient alerts", "special instructions", "Hinweise", "Warnungen", "alertes",
        "patient alert", "patient warnings", "patient notes", "patient note", "patient comment", "patient comments",
    ),
    "limbs": (
        "limb", "arms not to be used", "arm not to be used", "limbs not to be used", "do not use arm", "avoid arm",
        "avoid arms", "restricted limb", "restricted limbs", "restricted arm", "restricted extremity",
        "limb restriction", "limb restrictions", "arm restriction", "arm restrictions", "limb alert", "limb alerts",
        "limb precautions", "no draw arm", "no venipuncture arm", "barred arm", "barred arms", "gesperrter Arm",
        "Arm nicht verwenden", "bras à éviter", "bras interdit",
    ),
    "allergies": (
        "allergy", "patient allergies", "drug allergies", "known allergies", "allergy list", "allergy status",
        "Allergien", "Allergie", "allergies connues", "alergias",
    ),
    "last_ate_at": (
        "last ate", "last meal", "last meal at", "nil by mouth since", "fasting since", "npo since",
        "nüchtern seit", "letzte Mahlzeit", "dernier repas", "à jeun depuis",
    ),
    "next_meal_at": ("next meal", "breakfast at", "breakfast", "nächste Mahlzeit", "prochain repas"),
    "drawn_ml_24h": ("drawn last 24 h", "blood drawn 24h", "ml drawn 24h", "drawn today ml", "drawn 24h"),
    "drawn_ml_30d": ("drawn last 30 days", "blood drawn 30d", "ml drawn 30d", "drawn 30d"),
    "away": ("absent", "absences", "off ward", "away from ward", "abwesend", "absence"),
    "method": (
        "collection method", "draw method", "way of collection", "Entnahmeart", "mode de prélèvement",
    ),
    "needs": ("needs skills", "skills needed", "required skills", "collector needs"),
}

_ORDERS: Mapping[str, tuple[str, ...]] = {
    "order_number": (
        "order no", "order id", "order nr", "order", "order #", "accession", "accession number", "accession no",
        "request number", "request no", "request id", "requisition", "requisition number", "lab number", "lab no",
        "placer order number", "placer number", "Auftragsnummer", "Auftrags-Nr", "Auftrag", "Auftr.-Nr.",
        "numéro de demande", "n° demande",
    ),
    "test": (
        "test code", "code", "tests", "lab test", "procedure", "procedure code", "order code", "ordered test",
        "test ordered", "investigation", "analysis", "analyte", "exam", "order test", "order procedure",
        "Untersuchung", "Analyse", "Anforderung", "Parameter", "Laborwert", "examen", "analyse demandée",
    ),
    "loinc": ("loinc code", "test loinc", "loinc number", "loinc no"),
    "test_name": (
        "test description", "name of test", "procedure name", "order name", "description", "Testname",
        "nom de l'analyse", "libellé",
    ),
    "priority": (
        "prio", "urgency", "order priority", "test priority", "Priorität", "Dringlichkeit", "priorité", "urgence",
    ),
    "collect_at": (
        "collection time", "collect time", "collection date time", "collection datetime",
        "collection date and time", "collect date time", "collect datetime", "draw at", "draw time", "due",
        "due at", "due time", "timed for", "scheduled", "scheduled at", "scheduled time", "requested time",
        "requested for", "specimen collection time", "time", "collect on", "date time due", "planned collection",
        "Entnahmezeit", "Abnahmezeit", "Entnahmezeitpunkt", "heure de prélèvement", "prélèvement",
        "order collect at", "order collection time",
    ),
    "collect_from": (
        "from", "not before", "earliest", "collect after", "collection from", "draw from", "start", "window start",
        "frühestens", "Entnahme ab", "à partir de",
    ),
    "collect_to": (
        "to", "until", "not after", "latest", "collect before", "collect by", "collection to", "draw by", "end",
        "window end", "spätestens", "Entnahme bis", "jusqu'à",
    ),
    "collect_date": (
        "collection date", "collect date", "draw date", "scheduled date", "due date", "date", "Entnahmedatum",
        "Abnahmedatum", "date de prélèvement",
    ),
    "drawn_at": ("drawn", "time drawn", "collected at", "time collected", "abgenommen um", "prélevé à"),
    "drawn_into": ("drawn into", "tube drawn", "drawn tube"),
    "fasting": ("fasting required", "fast", "fasting?", "fasting state", "nüchtern", "à jeun"),
    "last_dose_at": (
        "last dose", "last given", "last dose given", "dose given at", "dose at", "infusion start",
        "last dose time", "letzte Gabe", "letzte Dosis", "dernière dose",
    ),
    "next_dose_at": (
        "next dose", "next dose due", "next due", "next dose time", "nächste Gabe", "nächste Dosis",
        "prochaine dose",
    ),
    "infusion_end_at": ("infusion end", "end of infusion", "infusion stopped", "Infusionsende", "fin de perfusion"),
    "series": ("serial", "series id", "series name", "Serie", "série"),
    "performer": (
        "performed by", "collected by", "collector", "collection by", "draw by whom", "collect method",
        "collection method", "Entnahme durch", "préleveur", "who draws",
    ),
    "ordered_at": (
        "ordered", "order time", "order date", "order datetime", "ordered on", "order date time", "requested at",
        "request time", "request date", "entered", "entered at", "angefordert am", "Auftragszeit", "Auftragsdatum",
        "demandé le",
    ),
    "note": (
        "notes", "comment", "comments", "remark", "remarks", "order comment", "order comments", "order note",
        "order notes", "order remark", "order remarks", "order instructions", "collection comment",
        "collection comments", "collection instructions", "collection notes", "comments to lab", "lab comments",
        "instructions", "clinical details", "clinical information", "Bemerkung", "Bemerkungen", "Kommentare",
        "Kommentar", "remarque",
        "commentaire",
    ),
    "status": ("order status", "state", "order state", "collection status", "Status des Auftrags", "statut"),
    "specimen": (
        "specimen type", "sample", "sample type", "material", "specimen source", "Probenart", "Probe",
        "échantillon", "type de prélèvement",
    ),
}

COLUMNS: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "patients": _PATIENTS,
    "orders": _ORDERS,
    "places": {
        "place": ("name", "bed", "location", "place name", "Ort", "Bett", "lieu", "lit", "id", "place id"),
        "ward": _PATIENTS["ward"],
        "kind": ("type", "place kind", "place type", "Art", "genre"),
        "x_m": ("x", "x metres", "x meters"),
        "y_m": ("y", "y metres", "y meters"),
        "position": (
            "order", "order along the corridor", "corridor order", "sequence", "seq", "Reihenfolge", "ordre",
        ),
    },
    "corridors": {
        "from": ("from place", "start", "a", "von", "de"),
        "to": ("to place", "end", "b", "nach", "vers"),
        "metres": ("meters", "m", "distance", "distance m", "length", "length m", "Meter", "mètres"),
        "seconds": ("s", "sec", "secs", "walk s", "walking seconds", "Sekunden", "secondes"),
        "one_way": ("one-way", "oneway", "is one way", "Einbahn", "sens unique"),
    },
    "staff": {
        "name": ("phlebotomist", "person", "collector", "staff name", "full name", "nom", "staff"),
        "initials": ("initial", "short", "Kürzel", "initiales"),
        "from": (
            "start", "starts", "shift start", "begins", "from time", "on duty from", "von", "Beginn", "de", "début",
        ),
        "until": ("to", "end", "ends", "shift end", "finish", "till", "on duty until", "bis", "Ende", "à", "fin"),
        "starts_at": ("start place", "starts from", "base", "starting place", "Startort", "lieu de départ"),
        "skills": ("skill", "trained for", "competences", "Kenntnisse", "compétences"),
        "wards": ("ward", "only wards", "units", "unit", "works on", "Stationen", "Station", "services", "unités"),
        "break": ("breaks", "break window", "Pause"),
        "break_minutes": ("break length", "break length minutes"),
    },
    "pickups": {
        "place": ("name", "location", "pickup", "pickup place", "Ort", "lieu"),
        "kind": ("type", "pickup kind", "by", "Art", "genre"),
        "departs": (
            "departures", "departs at", "leaves", "leaves at", "times", "courier times", "pickup times", "Abfahrt",
            "Abfahrten", "départs",
        ),
        "transit_minutes": (
            "transit", "minutes to laboratory", "minutes to lab", "travel minutes", "transit min",
            "Minuten bis Labor", "trajet minutes",
        ),
    },
    "progress": {
        "bed": _PATIENTS["bed"],
        "ward": _PATIENTS["ward"],
        "patient_number": _PATIENTS["patient_number"],
        "order_number": (*_ORDERS["order_number"], "orders", "order numbers"),
        "outcome": (
            "result", "status", "state", "what happened", "done", "collected", "drawn", "Ergebnis", "erledigt",
            "résultat",
        ),
        "time": (
            "at", "draw time", "drawn at", "time drawn", "collected at", "collection time", "clock", "Uhrzeit", "Zeit",
            "heure",
        ),
        "initials": ("by", "who", "collector", "drawn by", "collected by", "phlebotomist", "Kürzel", "initiales"),
        "note": ("notes", "comment", "comments", "remark", "remarks", "Bemerkung", "remarque"),
    },
    "policy": {
        "key": ("setting", "name", "Einstellung", "clé"),
        "value": ("Wert", "valeur"),
    },
}
# fmt: on
