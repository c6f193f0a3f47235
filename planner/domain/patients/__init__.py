"""What is known of a patient's body: age, birth date, weight, and how much blood may be taken."""
