"""News: what automations may act on, each told once when it happens."""

from .item import News, NewsKind
from .watch import NewsWatch

__all__ = ["News", "NewsKind", "NewsWatch"]
