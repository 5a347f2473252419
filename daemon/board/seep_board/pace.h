// When to send: ten times a second while anything moves, once a second at rest.
#pragma once

#include <stdint.h>

// Length of one mean, ms.
static const uint32_t STEP_MS = 100;

// At rest one sentence covers so many means.
static const uint8_t STEPS_AT_REST = 10;

// So long after the last movement the fast rate goes on, ms.
static const uint32_t FAST_FOR_MS = 5000;

// Mean of counts, exact.
struct Mean {
    uint32_t sum;
    uint32_t samples;

    void add(uint32_t count) {
        sum += count;
        samples++;
    }

    void add(const Mean &other) {
        sum += other.sum;
        samples += other.samples;
    }

    void clear() {
        sum = 0;
        samples = 0;
    }

    // In 0.1 mV.
    uint32_t value_100uv(uint32_t reference_100uv, uint32_t highest_count) const {
        if (samples == 0) {
            return 0;
        }
        uint64_t scaled = static_cast<uint64_t>(sum) * reference_100uv;
        uint64_t by = static_cast<uint64_t>(samples) * highest_count;
        return static_cast<uint32_t>((scaled + by / 2) / by);
    }
};

// Remembers when something moved last.
class Pace {
  public:
    Pace() : moved_(false), moved_at_ms_(0) {}

    void moved(uint32_t now_ms) {
        moved_ = true;
        moved_at_ms_ = now_ms;
    }

    bool is_fast(uint32_t now_ms) {
        if (moved_ && now_ms - moved_at_ms_ > FAST_FOR_MS) {
            moved_ = false;
        }
        return moved_;
    }

  private:
    bool moved_;
    uint32_t moved_at_ms_;
};

static inline bool differs(uint32_t a, uint32_t b, uint32_t by) {
    return a > b ? a - b > by : b - a > by;
}
