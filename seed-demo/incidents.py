# SPDX-License-Identifier: MIT
"""What was planned to go wrong on Round Merrow, as plain tables."""

NOT_STARTED = {
    26: "Front axle found cracked at scrutineering",
    157: "Car did not arrive on the island, ferry cancelled",
}

# car, day, last point, reason, day of return or None
RETIREMENTS = [
    (43, 1, "R2", "Magneto failed on Fallow Dyke", 2),
    (3, 1, "TC3", "Big end gone at the lunch halt", None),
    (97, 1, "TC5", "Gearbox, no drive", None),
    (12, 2, "H1", "Clutch burnt on Cobbler's Pass", 3),
    (133, 2, "PC5", "Water pump, waited for a part", 3),
    (80, 2, "TC8", "Head gasket", None),
    (153, 2, "TC11", "Rear axle bearing", None),
    (30, 3, "R7", "Half-shaft broken on the strand road", None),
    (108, 3, "TC15", "Fuel pump, repaired overnight", 4),
    (21, 3, "TC16", "Broken spring leaf, repaired overnight", 4),
    (136, 3, "R9", "Crew unwell", None),
    (47, 3, "TC17", "Valve dropped while well placed", None),
    (119, 4, "TC20", "Overheating", None),
    (84, 4, "R12", "Off the road, nobody hurt, front wheel broken", None),
]

DISQUALIFIED = (73, 3, "Towed by a service car between R9 and TC17, seen by two observers; stewards' decision 7")

# (point, car): seconds lost there and given back as an allowance
HELD_UP = {
    ("R4/2", 93): (170, "Flock of sheep before check 2"),
    ("R4/2", 94): (130, "Flock of sheep before check 2"),
    ("R4/2", 95): (20, "Flock of sheep before check 2"),
    ("R4/2", 96): (20, "Flock of sheep before check 2"),
    ("TC10", 60): (300, "Level crossing at Saltmarsh Halt closed"),
    ("TC10", 61): (240, "Level crossing at Saltmarsh Halt closed"),
    ("TC10", 62): (180, "Level crossing at Saltmarsh Halt closed"),
    ("TC10", 63): (120, "Level crossing at Saltmarsh Halt closed"),
    ("TC10", 64): (60, "Level crossing at Saltmarsh Halt closed"),
    ("TC21", 67): (300, "First at a farm trailer overturned on Hag Fell, helped until the doctor came"),
}

# Deviations that the story needs, in milliseconds, at (point, car). The rest is left to chance.
DEVIATIONS = {
    ("R11/1", 67): 288000,      # helps at the overturned trailer
    ("T1/2", 91): -30, ("T3/1", 91): 90, ("T4/1", 91): 20,
    ("R12/1", 75): 7200,        # the leader, behind a tractor on Candle Heath
}

FAULTS_AT = {}       # (test, car): faults, as in readings.csv

CANCELLED = ("R7/2", "Check car stood 200 m short of its surveyed place")
WAIVED = ("R11/1", 67, "Stopped at the overturned farm trailer, see allowance at TC21")
NOTIONAL = ("T3/2", 135, "22.400",
            "Hose of the second pad came off before this car, mean of the crew's five pads so far")
PENALTIES = [
    # car, day, minute of the day, penalty, reason, withdrawn with this reason or None
    (110, 1, 19 * 60 + 25, "25.000", "Over 30 km/h in the quiet zone of Lowgarth, observers' sheet 3", None),
    (143, 2, 19 * 60 + 40, "50.000", "Service in the closed area at Upper Tarnside",
     "Protest upheld: the crew mended their own puncture"),
]

# A reading typed wrongly and put right: point, car, what was typed (milliseconds too late), reason.
MISTYPED = [
    ("TC2", 19, 600000, "Typed 10 minutes too late, sheet and card agree"),
    ("R1/1", 58, -60000, "Minute misread on the print, strip checked"),
    ("R1/2", 115, 3000, "Second hand misread, strip checked"),
    ("TC5", 74, -120000, "Two minutes too early in the laptop, card says otherwise"),
    ("R4/1", 16, 30000, "30 seconds too late, digits checked on the strip"),
    ("R4/1", 141, -7000, "1 read as 8 on the wet sheet"),
    ("PC4", 88, 3600000, "Hour mistyped"),
    ("R6/1", 102, 10000, "Tens of seconds mistyped"),
    ("TC11", 40, 60000, "Card shows one minute less than the sheet"),
    ("TC13", 121, 60000, "Card shows one minute less than the sheet"),
    ("R8/1", 69, -20000, "Tens of seconds mistyped, beam print checked"),
    ("R9/1", 155, 9000, "Second hand misread, strip checked"),
    ("R10/1", 31, -60000, "Minute misread on the print, strip checked"),
    ("TC22", 54, 1200000, "Typed 20 minutes too late, sheet and card agree"),
    ("R12/1", 125, 40000, "4 for 0, strip checked"),
]

# The right time entered for the wrong car: point, right car, typed car.
WRONG_CAR = [("R8/1", 117, 171), ("TC4", 68, 86), ("R13/1", 50, 52)]

# A second clock that does not agree: point, car, milliseconds by which it differs. The office has not ruled.
SECOND_CLOCK = [("R2/1", 35, 1100), ("R2/1", 36, 900), ("R5/2", 82, -1000), ("R9/2", 88, 2000), ("TC14", 130, 61000)]

# The laptop at this check ran slow for a while; its readings were replaced from the beam print.
SLOW_CLOCK = {"point": "R5/1", "from": (11, 10), "to": (11, 41), "slow": 47000, "day": 2,
              "reason": "Laptop clock 47 s slow from 11:10 to 11:41, time taken from the beam print"}

# A button pressed by mistake and withdrawn: point, car, milliseconds before the right reading.
STRAY = [("TC14", 52, 41000, "Button pressed when the course car passed"),
         ("R12/1", 92, 26000, "Spectator's car, not 92")]

SENT_TWICE = ("PC7", 100)      # the same row twice, as a laptop sends it that lost its network
SEEN_WHILE_OUT = ("PC6", 80)   # a retired car that was seen on its way home
