"""Closed vocabularies of the exercise library."""

from django.db.models import TextChoices


class Kind(TextChoices):
    ROLLING = "rolling", "Self-massage rolling"
    STATIC_STRETCH = "static_stretch", "Static stretch"
    DYNAMIC_STRETCH = "dynamic_stretch", "Dynamic stretch"
    STRENGTH = "strength", "Activation and strength"
    BALANCE = "balance", "Balance and control"
    AEROBIC = "aerobic", "Aerobic"


class Equipment(TextChoices):
    NONE = "none", "Nothing"
    ROLLER = "roller", "Foam roller"
    BALL = "ball", "Small ball"
    STRAP = "strap", "Strap or towel"
    BAND = "band", "Elastic band"
    STEP = "step", "Step"
    CHAIR = "chair", "Chair"
    WALL = "wall", "Wall"
    MAT = "mat", "Mat"


class Severity(TextChoices):
    CAUTION = "caution", "Take care"
    DO_NOT = "do_not", "Do not do this"


class DoseSide(TextChoices):
    """How a dose relates to the two sides of the body."""

    BOTH = "both", "both sides together"
    EACH = "each", "each side"
    ALTERNATING = "alternating", "alternating sides"
    LEFT = "left", "left side"
    RIGHT = "right", "right side"
