"""Session: what to do. One sub-room a question: advice match night year; shared by them: worth projects optimum."""
