"""Any STAMP packets, for the laws that both modes keep."""

from hypothesis import strategies as st

from agent.codec.stamp import ErrorEstimate, ReflectorPacket, SenderPacket

u8 = st.integers(0, 2**8 - 1)
u16 = st.integers(0, 2**16 - 1)
u32 = st.integers(0, 2**32 - 1)
u64 = st.integers(0, 2**64 - 1)
estimates = st.builds(
    ErrorEstimate,
    synchronized=st.booleans(),
    ptp=st.booleans(),
    scale=st.integers(0, 63),
    multiplier=u8,
)
senders = st.builds(SenderPacket, sequence=u32, timestamp=u64, error=estimates, ssid=u16)
reflectors = st.builds(
    ReflectorPacket,
    sequence=u32,
    timestamp=u64,
    receive_timestamp=u64,
    sender_sequence=u32,
    sender_timestamp=u64,
    sender_ttl=u8,
    error=estimates,
    sender_error=estimates,
    ssid=u16,
)
