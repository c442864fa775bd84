"""Topics and the subjects that a cluster makes of them.

Source of the pairs: a NATS server 2.15.1, asked (tests/parts/test_parts_cluster.py asks it again).
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from contract.subjects import KEPT_PREFIX, subject_of, topic_of

PAIRS = {
    "ringtrue/1/greywacke/bay-2/chain": "ringtrue.1.greywacke.bay-2.chain",
    "ringtrue/1/s/b/inspection/a.b/result": "ringtrue.1.s.b.inspection.a//b.result",
    "ringtrue/1/s/b/inspection/.a..b./result": "ringtrue.1.s.b.inspection.//a////b//.result",
    "ringtrue/1/s/b/inspection/./result": "ringtrue.1.s.b.inspection.//.result",
    "ringtrue/1/s/b/inspection/../result": "ringtrue.1.s.b.inspection.////.result",
    "ringtrue/1/s./b/inspection/x:y/result": "ringtrue.1.s//.b.inspection.x:y.result",
}

LEVEL = st.text(st.characters(exclude_characters="/+# ", exclude_categories=("Cc", "Cs"))) | st.text("./a-")
TOPIC = st.lists(LEVEL.map(lambda level: level.replace("/", "")), min_size=1).map("/".join)


@pytest.mark.parametrize("topic", PAIRS)
def test_a_topic_is_called_as_the_cluster_calls_it(topic: str) -> None:
    assert subject_of(topic) == PAIRS[topic]
    assert topic_of(PAIRS[topic]) == topic
    assert topic_of(KEPT_PREFIX + PAIRS[topic]) == topic


@given(TOPIC)
def test_there_and_back_is_the_same(topic: str) -> None:
    assert topic_of(subject_of(topic)) == topic
    assert topic_of(KEPT_PREFIX + subject_of(topic)) == topic


@given(TOPIC, TOPIC)
def test_two_topics_are_two_subjects(one: str, other: str) -> None:
    assert (subject_of(one) == subject_of(other)) == (one == other)
    assert subject_of(one).count(".") == one.count("/")
