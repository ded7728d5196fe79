package cadencecoach.phone;

import java.nio.ByteBuffer;
import java.nio.ByteOrder;

/**
 * Fixed-size records on their way from a Java thread to Python, which asks for them when it likes. When it is full the
 * oldest record gives way, so that what is left is one unbroken stretch up to now; how many went is counted.
 */
final class Ring {
    private final byte[] data;
    private final int size;
    private final int capacity;
    private int head;
    private int count;
    private long dropped;

    Ring(int size, int capacity) {
        this.size = size;
        this.capacity = capacity;
        data = new byte[size * capacity];
    }

    /** A buffer that one record is written into before put(); little-endian, as numpy reads it. */
    ByteBuffer record() {
        return ByteBuffer.allocate(size).order(ByteOrder.LITTLE_ENDIAN);
    }

    synchronized void put(ByteBuffer record) {
        int tail = (head + count) % capacity;
        if (count == capacity) {
            head = (head + 1) % capacity;
            dropped++;
        } else {
            count++;
        }
        System.arraycopy(record.array(), 0, data, size * tail, size);
    }

    /** int64: records dropped since the start; then all waiting records, oldest first. */
    synchronized byte[] drain() {
        ByteBuffer out = ByteBuffer.allocate(8 + size * count).order(ByteOrder.LITTLE_ENDIAN).putLong(dropped);
        int first = Math.min(count, capacity - head);
        out.put(data, size * head, size * first);
        out.put(data, 0, size * (count - first));
        head = 0;
        count = 0;
        return out.array();
    }
}
