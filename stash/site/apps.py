from django.apps import AppConfig


class SiteConfig(AppConfig):
    """The composition root: it lies inside `stash`, but it is the top layer and alone knows both apps."""

    name = "stash.site"
    label = "site"
    verbose_name = "Warpshelf"

    def ready(self) -> None:
        from stash.site import checks  # noqa: F401
