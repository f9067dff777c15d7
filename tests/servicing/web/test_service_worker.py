"""The service worker that keeps the steps of an order."""


def test_the_service_worker_comes_from_the_root_and_is_asked_for_anew(farm, client):
    answer = client.get("/service-worker.js")
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Cache-Control"] == "no-cache"
    assert b'addEventListener("fetch"' in b"".join(answer.streaming_content)
