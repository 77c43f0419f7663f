"""The invented people of the demo clinic. Any likeness is chance; phones are from ranges kept for drama."""

from __future__ import annotations

GIVEN = (
    "Aoife", "Bartholomew", "Carys", "Dmitri", "Esra", "Fenella", "Gwilym", "Hana", "Ignacio", "Jocasta", "Kwame", "Lotte",
    "Matteo", "Niamh", "Otis", "Philippa", "Quentin", "Rosalind", "Séverine", "Tobias", "Ursula", "Viktor", "Winifred",
    "Ximena", "Yusuf", "Zelda", "Alasdair", "Beatriz", "Cormac", "Delphine",
)
FAMILY = (
    "Ashdown", "Birtwistle", "Cardoso", "Drummond", "Eriksen", "Falconer", "Gallardo", "Holloway", "Ivanova", "Jessop",
    "Kilbride", "Lacey", "Montague", "Nkemelu", "O’Rourke", "Pemberton", "Quigley", "Rasmussen", "Stanhope", "Thackeray",
    "Underhill", "Vasquez", "Whitlock", "Yarrow", "Zimmer", "Adeyemi", "Brennan", "Castellano", "Dunmore", "Ellery",
)
# per template: region, side, what the client came with, what they want back
COMPLAINTS = {
    "hip-and-glute-start": [
        ("hip", "left", "Left hip stiff after long drives", "Drive to the coast without stopping"),
        ("hip", "right", "Right hip tired on hills", "Walk the ridge with my sister"),
        ("trunk", "both", "Low back stiff every morning", "Put on socks standing up"),
        ("hip", "both", "Hips ache after gardening", "A whole Saturday in the allotment"),
    ],
    "neck-and-desk": [
        ("neck", "both", "Neck ache by the afternoon", "Work a full day without rubbing my neck"),
        ("shoulder", "right", "Right shoulder tight at the desk", "Swim front crawl again"),
        ("wrist_hand", "right", "Right wrist sore from typing", "Play the cello for an hour"),
    ],
    "knee-strength": [
        ("knee", "left", "Left knee sore on stairs", "Carry the shopping up to the third floor"),
        ("knee", "right", "Right knee gives way on slopes", "Ski one easy day in spring"),
        ("thigh", "right", "Thigh weak after a long time in a cast", "Ride my bicycle to work"),
    ],
    "ankle-return": [
        ("foot_ankle", "left", "Left ankle turned at football", "Back to five-a-side"),
        ("calf", "right", "Right calf tight when running", "Run five kilometres"),
    ],
}
