from provider.models.access import AreaUnit, Country, Membership, Provider, Role, User
from provider.models.base import ProviderRow, Row, Weekday
from provider.models.daybook import Attendance, WorkEntry, WorkKind
from provider.models.families import Child, Cycle, Enrolment, Guardian, Household, Language, PatternDay
from provider.models.home import Closure, ClosureKind, OpeningHours, Room, RoomUse, Use
from provider.models.trail import AuditEntry, FileKind, PeriodLock, StoredFile, Submission

__all__ = [
    "AreaUnit",
    "Attendance",
    "AuditEntry",
    "Child",
    "Closure",
    "ClosureKind",
    "Country",
    "Cycle",
    "Enrolment",
    "FileKind",
    "Guardian",
    "Household",
    "Language",
    "Membership",
    "OpeningHours",
    "PatternDay",
    "PeriodLock",
    "Provider",
    "ProviderRow",
    "Role",
    "Room",
    "RoomUse",
    "Row",
    "StoredFile",
    "Submission",
    "Use",
    "User",
    "Weekday",
    "WorkEntry",
    "WorkKind",
]
