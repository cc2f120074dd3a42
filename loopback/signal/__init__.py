"""What is played in one take, and its exact phase.

Conventions: sample 0 of a take is time zero; levels in dBFS are peak levels of a sine whose peak
at full scale is 0 dBFS (AES17-2015, clause 5); the upward sweep is
``sin(2π f1 L exp(t / L))`` (Novak, Lotton and Simon 2015, eq. 37 family), the downward sweep is the
same samples reversed.
"""
