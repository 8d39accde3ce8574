"""Programmes, listed and told; and whether the service is there at all."""

from service.programs.programme import shipped


def test_programmes_are_listed(client):
    listed = client.get("/v1/programs").json["programs"]
    assert [programme["name"] for programme in listed] == sorted(shipped())
    assert all(set(programme) == {"name", "summary", "led_by"} for programme in listed)


def test_programme_tells_every_number_with_its_unit_source_and_note(client):
    for name, programme in shipped().items():
        told = client.get(f"/v1/programs/{name}").json
        assert told["name"] == name
        assert told["cautions"] == list(programme.cautions)
        assert set(told["values"]) == set(programme.values)
        for value in told["values"].values():
            assert set(value) == {"value", "unit", "source", "note"}
            assert all(value[part] for part in ("unit", "source", "note"))


def test_service_is_alive(client):
    assert client.get("/livez").json == {"status": "alive"}
    assert client.head("/livez").status_code == 200
