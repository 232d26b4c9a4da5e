"""How answers of the API are written."""

from typing import Any

from rest_framework.renderers import JSONRenderer


class Problem(JSONRenderer):
    """Answer in JSON; what is refused as problem details (RFC 9457)."""

    def render(
        self, data: Any, accepted_media_type: Any = None, renderer_context: Any = None
    ) -> Any:
        """Write the answer, and name its kind."""
        response = (renderer_context or {}).get("response")
        if response is not None and response.exception:
            response.content_type = "application/problem+json"
        return super().render(data, accepted_media_type, renderer_context)
