"""What an order's entries name: parts with what lies in each yard, and technicians."""

from tests.factories import PartFactory, TechnicianFactory


def test_parts_with_their_stock(farm, stranger):
    with farm.scope():
        oil = PartFactory(organisation=farm.organisation, number="OIL-40", in_stock="12.5")
        other = PartFactory(organisation=farm.organisation)
        other.equivalents.add(oil)
    api = farm.api("technician")
    [told] = api.get("/api/v1/parts", {"number": "oil-40"}).json()["results"]
    assert (told["id"], told["in_stock"], told["equivalents"]) == (oil.pk, "12.50", [other.pk])
    assert [(each["quantity"]) for each in told["stocks"]] == ["12.50"]
    assert "unit_cost" not in told
    assert api.get(f"/api/v1/parts/{oil.pk}").json() == told
    assert stranger.api("owner").get(f"/api/v1/parts/{oil.pk}").status_code == 404
    assert stranger.api("owner").get("/api/v1/parts").json()["count"] == 0


def test_technicians_who_work_and_who_left(farm, stranger):
    with farm.scope():
        here = TechnicianFactory(member=farm.technician, licensed=True)
        gone = TechnicianFactory(member=farm.counter)
        farm.counter.active = False
        farm.counter.save(update_fields=["active"])
    api = farm.api("owner")

    def found(**asked):
        listed = api.get("/api/v1/technicians", asked).json()["results"]
        return [(each["id"], each["working"], each["licensed"]) for each in listed]

    assert found(working="true") == [(here.pk, True, True)]
    assert found(working="false") == [(gone.pk, False, False)]
    assert len(found()) == 2
    [named] = api.get("/api/v1/technicians", {"working": "true"}).json()["results"]
    assert (named["name"], named["member"]) == (str(farm.technician), farm.technician.pk)
    assert "hourly_rate" not in named
    assert stranger.api("owner").get("/api/v1/technicians").json()["count"] == 0
