// SPDX-License-Identifier: Apache-2.0
#include "core/disc/circ/reed_solomon.hpp"

#include <algorithm>
#include <cassert>
#include <cstddef>

namespace eyelevel::disc::circ {
namespace {

constexpr unsigned field_polynomial = 0x11D;  // C.7
constexpr int order = 255;

struct Field {
  std::array<std::uint8_t, 2 * order> power{};  // twice round, so that a sum of two logarithms needs no modulo
  std::array<std::uint8_t, 256> log{};
};

constexpr Field make_field() {
  Field field;
  unsigned x = 1;
  for (std::size_t i = 0; i < order; ++i) {
    field.power[i] = field.power[i + order] = static_cast<std::uint8_t>(x);
    field.log[x] = static_cast<std::uint8_t>(i);
    x <<= 1U;
    if (x & 0x100U) x ^= field_polynomial;
  }
  return field;
}

constexpr Field field = make_field();

constexpr std::uint8_t product(std::uint8_t a, std::uint8_t b) {
  return a == 0 || b == 0 ? std::uint8_t{0} : field.power[std::size_t{field.log[a]} + field.log[b]];
}

// Parity of one symbol alone, four bytes packed: parity is linear, so that of a word is the XOR over its symbols.
template <std::size_t N>
using ParityTable = std::array<std::array<std::uint32_t, 256>, N>;

// Solves the four equations sum v[i] a^(j (n - 1 - i)) = 0 for symbols `first` to `first` + 3, given one other symbol.
// With weights w_k = a^(n-1-k) this is a Vandermonde system; Lagrange's form gives each unknown at once.
std::uint32_t parity_of(std::size_t n, std::size_t first, std::size_t position, std::uint8_t value) {
  const auto weight = [n](std::size_t i) { return field.power[n - 1 - i]; };
  std::uint32_t packed = 0;
  for (std::size_t k = 0; k < 4; ++k) {
    std::uint8_t share = value;
    for (std::size_t other = 0; other < 4; ++other) {
      if (other == k) continue;
      const auto above = static_cast<std::uint8_t>(weight(position) ^ weight(first + other));
      const auto below = static_cast<std::uint8_t>(weight(first + k) ^ weight(first + other));
      share = product(share, product(above, inverse(below)));
    }
    packed |= std::uint32_t{share} << (8 * k);
  }
  return packed;
}

template <std::size_t N>
ParityTable<N> make_parity_table(std::size_t first) {
  ParityTable<N> table{};
  for (std::size_t position = 0; position < N; ++position) {
    if (position >= first && position < first + 4) continue;  // the parity symbols themselves
    for (std::size_t value = 0; value < 256; ++value)
      table[position][value] = parity_of(N, first, position, static_cast<std::uint8_t>(value));
  }
  return table;
}

template <std::size_t N>
std::uint32_t packed_parity(const std::array<std::uint8_t, N>& word, const ParityTable<N>& table, std::size_t first) {
  std::uint32_t parity = 0;
  for (std::size_t i = 0; i < first; ++i) parity ^= table[i][word[i]];
  for (std::size_t i = first + 4; i < N; ++i) parity ^= table[i][word[i]];
  return parity;
}

template <std::size_t N>
void set_parity(std::array<std::uint8_t, N>& word, const ParityTable<N>& table, std::size_t first) {
  const std::uint32_t parity = packed_parity(word, table, first);
  for (std::size_t k = 0; k < 4; ++k) word[first + k] = static_cast<std::uint8_t>(parity >> (8 * k));
}

template <std::size_t N>
bool has_parity(const std::array<std::uint8_t, N>& word, const ParityTable<N>& table, std::size_t first) {
  std::uint32_t stored = 0;
  for (std::size_t k = 0; k < 4; ++k) stored |= std::uint32_t{word[first + k]} << (8 * k);
  return stored == packed_parity(word, table, first);
}

constexpr std::size_t first_q = 12, first_p = 28;

const ParityTable<c2_symbols>& q_table() {
  static const auto table = make_parity_table<c2_symbols>(first_q);
  return table;
}

const ParityTable<f2_symbols>& p_table() {
  static const auto table = make_parity_table<f2_symbols>(first_p);
  return table;
}

// Polynomials of degree four at most, lowest power first.
using Polynomial = std::array<std::uint8_t, 5>;

// Multiplies by (1 + a^exponent x).
void multiply_by_root(Polynomial& p, int exponent) {
  for (std::size_t i = 4; i > 0; --i) p[i] = static_cast<std::uint8_t>(p[i] ^ product(p[i - 1], alpha_power(exponent)));
}

std::uint8_t value_at(const Polynomial& p, int exponent) {
  std::uint8_t sum = p[4];
  for (std::size_t i = 4; i-- > 0;) sum = static_cast<std::uint8_t>(product(sum, alpha_power(exponent)) ^ p[i]);
  return sum;
}

struct Locator {
  Polynomial polynomial{};
  int degree = 0;
};

// Berlekamp and Massey, started with the polynomial of the erasures (Blahut, Algebraic Codes for Data
// Transmission, 7.5).
Locator find_locator(const Syndromes& syndromes, const Polynomial& erasures, int erased) {
  Polynomial current = erasures, before = erasures;
  int length = erased;
  for (int r = erased + 1; r <= 4; ++r) {
    std::uint8_t discrepancy = 0;
    for (int i = 0; i < r; ++i)
      discrepancy = static_cast<std::uint8_t>(
          discrepancy ^ product(current[static_cast<std::size_t>(i)], syndromes[static_cast<std::size_t>(r - i - 1)]));
    for (std::size_t i = 4; i > 0; --i) before[i] = before[i - 1];  // times x
    before[0] = 0;
    if (discrepancy == 0) continue;
    const Polynomial old = current;
    for (std::size_t i = 0; i < 5; ++i)
      current[i] = static_cast<std::uint8_t>(current[i] ^ product(discrepancy, before[i]));
    if (2 * length <= r + erased - 1) {
      length = r + erased - length;
      for (std::size_t i = 0; i < 5; ++i) before[i] = product(old[i], inverse(discrepancy));
    }
  }
  return {current, length};
}

// Forney: the value of the error whose locator is a^power.
std::uint8_t error_value(const Syndromes& syndromes, const Polynomial& locator, int power) {
  Polynomial evaluator{};
  for (std::size_t i = 0; i < 4; ++i)
    for (std::size_t j = 0; j <= i; ++j)
      evaluator[i] = static_cast<std::uint8_t>(evaluator[i] ^ product(syndromes[i - j], locator[j]));
  const Polynomial derivative = {locator[1], 0, locator[3], 0, 0};
  const std::uint8_t below = value_at(derivative, -power);
  // The first root of the code is a^0: the value is X * evaluator(1/X) / derivative(1/X).
  return below == 0 ? std::uint8_t{0}
                    : product(product(alpha_power(power), value_at(evaluator, -power)), inverse(below));
}

}  // namespace

std::uint8_t multiply(std::uint8_t a, std::uint8_t b) { return product(a, b); }

std::uint8_t inverse(std::uint8_t a) {
  assert(a != 0);
  return field.power[static_cast<std::size_t>(order - field.log[a])];
}

std::uint8_t alpha_power(int exponent) {
  const int rest = exponent % order;
  return field.power[static_cast<std::size_t>(rest < 0 ? rest + order : rest)];
}

Syndromes syndromes_of(std::span<const std::uint8_t> word) {
  Syndromes s{};
  for (const std::uint8_t symbol : word) {  // Horner, one step a symbol
    s[0] = static_cast<std::uint8_t>(s[0] ^ symbol);
    s[1] = static_cast<std::uint8_t>(product(s[1], 2) ^ symbol);
    s[2] = static_cast<std::uint8_t>(product(s[2], 4) ^ symbol);
    s[3] = static_cast<std::uint8_t>(product(s[3], 8) ^ symbol);
  }
  return s;
}

void set_q_parity(C2Word& word) { set_parity(word, q_table(), first_q); }

void set_p_parity(C1Word& word) { set_parity(word, p_table(), first_p); }

bool is_c2_word(const C2Word& word) { return has_parity(word, q_table(), first_q); }

bool is_c1_word(const C1Word& word) { return has_parity(word, p_table(), first_p); }

Correction correct(std::span<std::uint8_t> word, std::uint32_t erased, int errors_max) {
  const auto n = static_cast<int>(word.size());
  assert(n <= 32);
  const Syndromes syndromes = syndromes_of(word);
  if (syndromes == Syndromes{}) return {};

  constexpr Correction failed{.failed = true, .wrong = 0, .where = 0};
  Polynomial erasures{1};
  int erased_count = 0;
  for (int i = 0; i < n; ++i) {
    if (!(erased >> i & 1U)) continue;
    if (++erased_count > 4) return failed;
    multiply_by_root(erasures, n - 1 - i);
  }
  const auto [locator, degree] = find_locator(syndromes, erasures, erased_count);
  if (degree - erased_count > errors_max || 2 * degree - erased_count > 4) return failed;

  Correction result;
  std::array<std::uint8_t, 32> repaired{};
  std::copy(word.begin(), word.end(), repaired.begin());
  int roots = 0;
  for (int i = 0; i < n; ++i) {
    const int power = n - 1 - i;
    if (value_at(locator, -power) != 0) continue;
    ++roots;
    const std::uint8_t value = error_value(syndromes, locator, power);
    if (value == 0) continue;
    repaired[static_cast<std::size_t>(i)] ^= value;
    ++result.wrong;
    result.where |= 1U << i;
  }
  const auto repaired_word = std::span(repaired).first(word.size());
  if (roots != degree || syndromes_of(repaired_word) != Syndromes{}) return failed;
  std::copy(repaired_word.begin(), repaired_word.end(), word.begin());
  return result;
}

}  // namespace eyelevel::disc::circ
