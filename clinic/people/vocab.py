"""Closed vocabularies of people, as enums in a leaf file."""

from django.db.models import TextChoices


class Role(TextChoices):
    FRONT_DESK = "front_desk", "Front desk"
    CLINICIAN = "clinician", "Clinician"
    LEAD = "lead", "Practice lead"
    CLIENT = "client", "Client"
    SYSTEM = "system", "System"


class CorrectionReason(TextChoices):
    """How it came up that something was wrong."""

    CLIENT_ASKED = "client_asked", "The client asked for it"
    CHANGED = "changed", "It has changed"
    OUR_MISTAKE = "our_mistake", "We had it wrong"


class CorrectionOutcome(TextChoices):
    """What became of what a client asked to have set right."""

    OPEN = "open", "Open"
    DONE = "done", "Set right"
    DECLINED = "declined", "Left as it is"


class EpisodeStatus(TextChoices):
    """FHIR R4 EpisodeOfCare.status."""

    PLANNED = "planned", "Planned"
    WAITLIST = "waitlist", "Waitlist"
    ACTIVE = "active", "Active"
    ONHOLD = "onhold", "On hold"
    FINISHED = "finished", "Finished"
    CANCELLED = "cancelled", "Cancelled"
    ENTERED_IN_ERROR = "entered-in-error", "Entered in error"


class Region(TextChoices):
    FOOT_ANKLE = "foot_ankle", "Foot and ankle"
    CALF = "calf", "Calf"
    KNEE = "knee", "Knee"
    THIGH = "thigh", "Thigh"
    HIP = "hip", "Hip"
    TRUNK = "trunk", "Trunk"
    SHOULDER = "shoulder", "Shoulder"
    NECK = "neck", "Neck"
    WRIST_HAND = "wrist_hand", "Wrist and hand"


class BodySide(TextChoices):
    LEFT = "left", "Left"
    RIGHT = "right", "Right"
    BOTH = "both", "Both sides"
    NONE = "none", "No side"


class Channel(TextChoices):
    EMAIL = "email", "Email"
    SMS = "sms", "Text message"
    PUSH = "push", "Notification on a device"


class ConditionCode(TextChoices):
    """Screening answers that exercises' precautions refer to.

    The first six are the cautions and contraindications to rolling of Bartsch KM et al. 2021, J Clin Med 10(22):5360;
    the others are usual screening questions (common practice, no source).
    """

    OPEN_WOUND = "open_wound", "Open wound"
    FRACTURE = "fracture", "Bone fracture"
    INFLAMMATION = "inflammation", "Local tissue inflammation"
    DVT = "dvt", "Deep vein thrombosis, known or suspected"
    OSTEOMYELITIS = "osteomyelitis", "Bone infection"
    MYOSITIS_OSSIFICANS = "myositis_ossificans", "Bone forming in muscle"
    ANTICOAGULANT = "anticoagulant", "Blood thinners or a bleeding disorder"
    LOST_SENSATION = "lost_sensation", "Lost sensation"
    RECENT_SURGERY = "recent_surgery", "Recent surgery"
    OSTEOPOROSIS = "osteoporosis", "Osteoporosis"
    PREGNANCY = "pregnancy", "Pregnancy"
    HYPERMOBILITY = "hypermobility", "Hypermobility or an unstable joint"
    HEART_DISEASE = "heart_disease", "Heart or circulation disease"
    DIZZINESS = "dizziness", "Dizziness or falls"
    JOINT_REPLACEMENT = "joint_replacement", "Joint replacement"
