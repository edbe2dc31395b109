"""Who may do what: one role a person, ranked, so that a rule is one comparison."""

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q, Value
from django.db.models.functions import Lower


class Role(models.TextChoices):
    VIEWER = "viewer", "viewer"
    HELPER = "helper", "helper"
    OWNER = "owner", "owner"

    @property
    def rank(self) -> int:
        return [Role.VIEWER, Role.HELPER, Role.OWNER].index(self)

    def reaches(self, needed: "Role") -> bool:
        return self.rank >= needed.rank


class PersonManager(BaseUserManager):
    def get_by_natural_key(self, username: str) -> "Person":
        # By the same folding as the constraint, so that one name never finds two people.
        return self.alias(folded=Lower("username")).get(folded=Lower(Value(username)))

    def create_user(
        self, username: str, password: str, *, name: str = "", role: str = Role.VIEWER
    ) -> "Person":
        person = self.model(username=self.model.normalize_username(username), name=name, role=role)
        person.set_password(password)
        person.full_clean()
        person.save()
        return person

    def create_superuser(self, username: str, password: str, **extra: str) -> "Person":
        """Django's own command for it makes an owner."""
        return self.create_user(username, password, role=Role.OWNER, **extra)


class Person(AbstractBaseUser):
    username = models.CharField(
        "sign-in name", max_length=40, unique=True, error_messages={"unique": "This sign-in name is taken."}
    )
    name = models.CharField("name shown", max_length=60, blank=True)
    role = models.CharField(max_length=10, choices=Role, default=Role.VIEWER)
    is_active = models.BooleanField("may sign in", default=True)
    version = models.PositiveIntegerField(default=1)

    objects = PersonManager()

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS: list[str] = []

    class Meta:
        verbose_name_plural = "people"
        ordering = ["username"]
        constraints = [
            models.CheckConstraint(
                condition=Q(role__in=Role.values),
                name="stash_person_role_known",
                violation_error_message="Choose viewer, helper or owner.",
            ),
            models.UniqueConstraint(
                Lower("username"),
                name="stash_person_username_any_case",
                violation_error_message="This sign-in name is taken.",
            ),
        ]

    def __str__(self) -> str:
        return self.name or self.username

    @property
    def may_handle(self) -> bool:
        """May weigh, move and reserve."""
        return Role(self.role).reaches(Role.HELPER)

    @property
    def may_change(self) -> bool:
        """May change plans, yarns and the studio."""
        return Role(self.role).reaches(Role.OWNER)
